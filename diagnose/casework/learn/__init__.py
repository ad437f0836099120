"""What ended jobs teach the book: counts, shares and rows as ranges, and a change to the YAML to be looked over.

`outcomes` reads jobs, `shares` and `rows` make ranges of counts, `lists` says what went wrong, `patch` changes text.
"""
