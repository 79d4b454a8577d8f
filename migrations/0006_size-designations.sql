-- Widths in inches take two decimals in designations of tire sizes, as lookups expect since 0.2: 5.2-16 becomes 5.20-16,
-- 5.9/6.2-17 becomes 5.90/6.20-17. Where a newer row has the designation already, that one holds: the older keeps its own.

UPDATE OR IGNORE tire_sizes SET designation =
  substr(designation, 1, instr(designation, '.') + 1) || '0' || substr(designation, instr(designation, '.') + 2)
  WHERE designation GLOB '[0-9].[0-9][-RB/]*' OR designation GLOB '[0-9][0-9].[0-9][-RB/]*';

-- The second width of a combined size; what stands before the slash is cut off to find its point.
UPDATE OR IGNORE tire_sizes SET designation =
  substr(designation, 1, instr(designation, '/') + instr(substr(designation, instr(designation, '/') + 1), '.') + 1) || '0'
  || substr(designation, instr(designation, '/') + instr(substr(designation, instr(designation, '/') + 1), '.') + 2)
  WHERE designation GLOB '[0-9]*/[0-9].[0-9][-RB]*' OR designation GLOB '[0-9]*/[0-9][0-9].[0-9][-RB]*';
