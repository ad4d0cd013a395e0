"""The verbs of the command line, one module each; see ``app.cli`` for what a module offers."""
