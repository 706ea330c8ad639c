"""What notes tell when looked at as a whole: which harp, which position, where its zero lies. Pure analyses."""
