"""What keeps a rule book from being used: each slip a small class with name, reason and two examples.

Cast: `slip.py` has `Slip`; `files.py` what a file or folder may be, `writing.py` how YAML is written, `words.py` keys,
ids, texts and numbers, `sense.py` what must hold between them, `bands.py` readings and their bands, `sums.py` sums of
the bench, `folders.py` own folders; `catalogue.py` lists them and says of a code why it matters. The readers say
what is wrong, where and what to write; nothing here is imported until somebody asks why.
"""
