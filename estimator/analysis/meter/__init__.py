"""The model held against the owner's own meter and sensors, and its inputs weighed by them."""
