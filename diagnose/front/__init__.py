"""What the user sees: one file a command, the screens, the printed plan. Nothing here computes; all is read off a View."""
