"""What a request refers to: park, looms, links, canonical form."""
