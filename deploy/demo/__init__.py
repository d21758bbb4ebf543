"""An invented site, its virtual slabs and loggers, and the acts of its people."""
