"""The hourly year: weather, sun, stores, and the march through them."""
