"""What stands in the air stream and around the room, each by its own equations."""
