"""What loggers send, one file a format."""
