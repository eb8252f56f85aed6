"""The report, section by section."""
