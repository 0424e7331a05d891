-- How large a thing is by the word of the record that it is from: old tables give areas
-- and lengths with positions, and no shape from which they could be measured.

-- +goose Up

ALTER TABLE marks ADD COLUMN sizes TEXT CHECK (sizes IS NULL OR json_valid(sizes)); -- {"area_msh":[value,sigma],…}: length_Mm, tilt_deg
