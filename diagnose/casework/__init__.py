"""Cases: events, the fold, the store, replay of case files. Start reading at `desk`."""
