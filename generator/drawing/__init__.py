"""Model -> SVG: to scale, seen from a named side. Only canvas.py writes markup."""
