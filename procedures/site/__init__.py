"""Use cases: everything a front end may ask of a site, one module a family."""
