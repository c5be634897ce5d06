"""Wallwork: job definitions for cable transits in, a site that a crew can work from out."""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("wallwork")
except PackageNotFoundError:  # running from a source tree that was never installed
    __version__ = "0"
