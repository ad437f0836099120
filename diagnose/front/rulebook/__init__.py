"""The commands of `diagnose rules`, one file each, and what they share."""
