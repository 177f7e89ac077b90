-- Estimates of an earlier event of the season, as `sextant estimate` prints
-- them: prior knowledge of the analysis. json keeps what was given.
alter table event
    add column prior json;
