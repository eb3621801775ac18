"""The posterior of one infant: population, likelihood, answers, forecast."""
