"""The reader of turned coasters, measured on simulated photographs."""
