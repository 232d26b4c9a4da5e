"""The pages of the register: buildings and devices, customers and contacts, instruments."""
