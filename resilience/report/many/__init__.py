"""What is told of many sites.

Order of reading: ``portfolio`` (which of them to visit), ``overview`` (the same as a document),
``moving`` (what has moved since an earlier run).
"""
