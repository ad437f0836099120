"""The policy proven on simulated bikes: `run` plays them all (start there), `draw` makes them, `play` plays one."""
