"""The growth prior: forecasts from weights alone, pooled over a site."""
