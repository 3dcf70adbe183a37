"""Plan camera colour and exposure from measured light."""

__version__ = "0.1.0"
