"""Settings from the environment, addresses, and the way in for servers."""
