"""The views of a log, shared by the pages and the command line: words, rounding, text, JSON, PDF, chart and section."""
