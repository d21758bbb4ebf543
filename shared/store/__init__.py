"""The two stores: readings (time series) and the site book (everything set up, decided and told)."""
