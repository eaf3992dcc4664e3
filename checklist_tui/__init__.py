"""Front ends: the terminal interface, line mode and the command line. No rule of the trade lives here."""

__version__ = "0.1.0"
