"""Drawing → Regions: what is sewn at which height, each kept whole beneath what lies on it."""
