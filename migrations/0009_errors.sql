-- Which errors of a position nobody gave, where that matters: an error that lacks them is
-- no error, but a lower bound.

-- +goose Up
ALTER TABLE positions ADD COLUMN errors_lack TEXT NOT NULL DEFAULT ''; -- in words, as: the error of r
ALTER TABLE positions ADD COLUMN least_sigma_lat_deg REAL CHECK (least_sigma_lat_deg > 0); -- where sigma_lat_deg lacks one
ALTER TABLE positions ADD COLUMN least_sigma_lon_deg REAL CHECK (least_sigma_lon_deg > 0);
