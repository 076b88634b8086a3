"""What ``weakest`` says, and ``compare`` of what-ifs.

Order of reading: ``helping`` (what would help, in words), ``opening`` (the first lines),
``weakness`` (the whole page), ``supposing`` (what-ifs).
"""
