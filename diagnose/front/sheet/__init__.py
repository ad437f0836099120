"""Jobs on paper: the job sheet and the rider's note, as text, Markdown and HTML."""
