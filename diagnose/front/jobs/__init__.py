"""The commands of `diagnose jobs`, one file a few of them that belong together; `group.py` names them all."""
