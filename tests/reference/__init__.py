"""Judges from outside: published figures, and models of other solvers."""
