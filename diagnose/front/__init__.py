"""What the user sees: one file a command, and the screens. Nothing here computes; all is read off a View."""
