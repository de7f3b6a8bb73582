"""What a builder needs at the bench, with the plant before him: readings, and what they say."""
