"""Speed, shown as ratios within one run; machines differ, ratios travel."""
