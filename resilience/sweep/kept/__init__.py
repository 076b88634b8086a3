"""What a run of a portfolio leaves in its folder.

Order of reading: ``results`` (its tables), ``copies`` (the same for spreadsheets and as Parquet),
``earlier`` (what is read of a run that has ended).
"""
