"""The board: the page that a class looks at, and its server."""
