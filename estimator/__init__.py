"""The hour-by-hour account of drying and reheat."""
