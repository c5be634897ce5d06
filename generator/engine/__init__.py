"""Pure computation: no file, no clock, no printing. Everything it knows arrives as an argument."""
