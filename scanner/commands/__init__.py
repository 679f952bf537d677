"""One module for each command: options, one library call, one presenter."""
