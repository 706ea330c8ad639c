"""Takes: one performance a folder of open formats, written so that none is ever lost."""
