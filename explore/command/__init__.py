"""What lies between the words that are typed and the task: reading them, runs they name, and Hydra."""
