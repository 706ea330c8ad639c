"""The commands and the terminal meter, thin: everything they do is done elsewhere."""
