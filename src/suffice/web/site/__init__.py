"""The site: settings, addresses, middleware, faults."""
