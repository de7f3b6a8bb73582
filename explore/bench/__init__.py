"""What a builder needs at the bench: what to cut, drill and weigh of a design, and what readings say of a plant."""
