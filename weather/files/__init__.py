"""Weather files: recognized, read, ordered and made whole."""
