-- Heights and lengths on the Sun are kept in kilometres, under names that say so: _mm
-- would be millimetres. The columns of positions are called as the exports call them,
-- and an error that is not known is missing there, never 0.

-- +goose Up
ALTER TABLE setups RENAME COLUMN surface_mm TO surface_km;
ALTER TABLE setups RENAME COLUMN surface_sigma_mm TO sigma_surface_km;
ALTER TABLE setups RENAME COLUMN edge_mm TO edge_km;
ALTER TABLE setups RENAME COLUMN edge_sigma_mm TO sigma_edge_km;
UPDATE setups SET surface_km = 1000 * surface_km, sigma_surface_km = 1000 * sigma_surface_km, edge_km = 1000 * edge_km, sigma_edge_km = 1000 * sigma_edge_km;

ALTER TABLE discs RENAME COLUMN layer_mm TO layer_km;
ALTER TABLE discs RENAME COLUMN layer_sigma_mm TO sigma_layer_km;
UPDATE discs SET layer_km = 1000 * layer_km, sigma_layer_km = 1000 * sigma_layer_km;

ALTER TABLE marks RENAME COLUMN polar_limb_mm TO polar_limb_km;
ALTER TABLE marks RENAME COLUMN polar_limb_sigma_mm TO sigma_polar_limb_km;
ALTER TABLE marks RENAME COLUMN height_mm TO height_km;
ALTER TABLE marks RENAME COLUMN height_sigma_mm TO sigma_height_km;
UPDATE marks SET polar_limb_km = 1000 * polar_limb_km, sigma_polar_limb_km = 1000 * sigma_polar_limb_km,
    height_km = 1000 * height_km, sigma_height_km = 1000 * sigma_height_km
    WHERE polar_limb_km IS NOT NULL OR height_km IS NOT NULL;

ALTER TABLE passages RENAME COLUMN height_mm TO height_km;
ALTER TABLE passages RENAME COLUMN height_sigma_mm TO sigma_height_km;
UPDATE passages SET height_km = 1000 * height_km, sigma_height_km = 1000 * sigma_height_km WHERE height_km IS NOT NULL;

ALTER TABLE positions RENAME COLUMN high_mm TO assumed_height_km;
ALTER TABLE positions RENAME COLUMN high_sigma_mm TO sigma_assumed_height_km;
ALTER TABLE positions RENAME COLUMN high_lat_deg TO corrected_lat_deg;
ALTER TABLE positions RENAME COLUMN high_lon_deg TO corrected_lon_deg;
ALTER TABLE positions RENAME COLUMN high_cmd_deg TO corrected_cmd_deg;
ALTER TABLE positions RENAME COLUMN high_sigma_lat_deg TO corrected_sigma_lat_deg;
ALTER TABLE positions RENAME COLUMN high_sigma_lon_deg TO corrected_sigma_lon_deg;
ALTER TABLE positions RENAME COLUMN high_corr_lat_lon TO corrected_corr_lat_lon;
ALTER TABLE positions RENAME COLUMN edge_sigma_pa_deg TO sigma_pa_deg;
ALTER TABLE positions RENAME COLUMN edge_from_deg TO pa_from_deg;
ALTER TABLE positions RENAME COLUMN edge_to_deg TO pa_to_deg;
ALTER TABLE positions RENAME COLUMN edge_top_deg TO pa_top_deg;
ALTER TABLE positions RENAME COLUMN edge_lat_deg TO limb_lat_deg;
ALTER TABLE positions RENAME COLUMN edge_sigma_lat_deg TO limb_sigma_lat_deg;
ALTER TABLE positions RENAME COLUMN edge_lon_deg TO limb_lon_deg;
ALTER TABLE positions RENAME COLUMN height_mm TO height_km;
ALTER TABLE positions RENAME COLUMN sigma_height_mm TO sigma_height_km;
UPDATE positions SET assumed_height_km = 1000 * assumed_height_km, sigma_assumed_height_km = 1000 * sigma_assumed_height_km,
    height_km = 1000 * height_km, sigma_height_km = nullif(1000 * sigma_height_km, 0),
    sigma_height_arcsec = nullif(sigma_height_arcsec, 0), sigma_pa_deg = nullif(sigma_pa_deg, 0), limb_sigma_lat_deg = nullif(limb_sigma_lat_deg, 0),
    corrected_corr_lat_lon = iif(corrected_sigma_lat_deg > 0 AND corrected_sigma_lon_deg > 0, corrected_corr_lat_lon, NULL),
    corrected_sigma_lat_deg = nullif(corrected_sigma_lat_deg, 0), corrected_sigma_lon_deg = nullif(corrected_sigma_lon_deg, 0)
    WHERE assumed_height_km IS NOT NULL OR height_km IS NOT NULL;
UPDATE positions SET corr_lat_lon = NULL, sigma_lat_deg = nullif(sigma_lat_deg, 0), sigma_lon_deg = nullif(sigma_lon_deg, 0)
    WHERE sigma_lat_deg = 0 OR sigma_lon_deg = 0;
