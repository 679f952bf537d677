"""The archive: one folder that keeps what was tasted, scanned and decided, and loses nothing of it."""
