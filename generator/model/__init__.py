"""What things are: the catalogue, what was asked for, what was computed. No file is read here."""
