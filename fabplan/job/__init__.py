"""The job file: read whole into the model, every fault at once; a starter."""
