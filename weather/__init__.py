"""A weather file becomes a WeatherYear; nothing here knows of rooms or units."""
