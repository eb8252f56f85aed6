"""What a designer hands on: schedule, sequence of operation, commissioning, design hours."""
