"""The exact solver: whole numbers in, whole numbers out. It knows nothing of catalogues, cables or words."""
