-- Fields and values of stored JSON texts take the names that the contract gives them since 0.2.
-- A quote inside a JSON text is escaped: "name": can only be a key, and "value" only a whole value.

UPDATE vehicle_revisions SET profile =
  replace(replace(replace(replace(profile,
    '"promised":', '"computed":'),
    '"takes":', '"input":'),
    '"kind":"ratio-adapter"', '"kind":"adapter"'),
    '"kind":"transfer"', '"kind":"transfer-case"');

UPDATE calibrations SET request = replace(request, '"takes":', '"input":'), result =
  replace(replace(replace(replace(replace(replace(replace(replace(replace(result,
    '"scatterExceedsDoubt":', '"scatterExceedsUncertainty":'),
    '"outlying":', '"outlier":'),
    '"neverUnderConstant":', '"noUnderReadingConstant":'),
    '"neverUnderRatio":', '"noUnderReadingRatio":'),
    '"neverUnderOverPercent":', '"noUnderReadingErrorPercent":'),
    '"fault":"not-told-apart"', '"fault":"not-distinguishable"'),
    '"code":"scatter-exceeds-doubt"', '"code":"scatter-exceeds-uncertainty"'),
    '"york-2004"', '"line-fit-both-uncertain"'),
    '"sen-1968"', '"robust-line-fit"');

UPDATE part_revisions SET content =
  replace(replace(replace(replace(content,
    '"sex":"inner"', '"gender":"female"'),
    '"sex":"outer"', '"gender":"male"'),
    '"takes":', '"input":'),
    '"kind":"ratio-adapter"', '"kind":"adapter"');

UPDATE parts SET kind = 'adapter' WHERE kind = 'ratio-adapter';
UPDATE fits SET part_kind = 'adapter' WHERE part_kind = 'ratio-adapter';

UPDATE part_interfaces SET key = substr(key, 1, length(key) - 5) || 'female' WHERE key LIKE '%/inner';
UPDATE part_interfaces SET key = substr(key, 1, length(key) - 5) || 'male' WHERE key LIKE '%/outer';
