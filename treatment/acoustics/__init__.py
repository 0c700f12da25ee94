"""What sound does in a room: arrays in, arrays out."""
