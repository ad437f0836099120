"""What is weak or wrong in a rule book that reads well: each anomaly a small class with an example of either kind.

Cast: `anomaly.py` has `Anomaly`, what it finds (`Found`) and what it looks at (`Study`); `examine.py` runs them and
lets stand what a file says is right; `catalogue.py` lists those of this room. What needs reasoning is in
`reason/anomalies`, what needs worked cases in `casework/anomalies.py`. All this runs in `diagnose rules check` only:
what must hold before a book can be used at all is in `book/checks.py` and in the readers.

The ten of the literature (Nguyen, Perkins, Laffey and Pecora, "Knowledge base verification", AI Magazine 8(2), 1987;
Preece and Shinghal, "Foundation and application of knowledge base verification", International Journal of Intelligent
Systems 9, 1994) and where they are found:

    redundant, subsumed, conflicting, circular, unnecessary condition     deductions.py (circular order: book/checks.py)
    unreferenced value, illegal value                                     values.py (an unknown value: the readers)
    dead-end condition, dead-end goal, unreachable conclusion             ends.py
"""
