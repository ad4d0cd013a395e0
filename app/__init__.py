"""The command line and the web pages; nothing is computed here."""
