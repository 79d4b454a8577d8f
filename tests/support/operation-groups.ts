/**
 * The tags of the document in groups, each a file of `tests/contract/operations`: the runner shares out files, and all operations in
 * one would keep it waiting. A group is about as much work as another.
 */
export const GROUPS = {
  electrics: ['displays', 'electrics', 'faults', 'health', 'pick-ups', 'pulses', 'reference', 'signals'],
  mechanics: ['cables', 'drive-paths', 'gauges', 'gears', 'odometers', 'tires'],
  shared: ['fits', 'parts', 'tire-sizes'],
  'vehicle-checks': ['vehicle-checks'],
  vehicles: ['vehicles'],
} as const satisfies Record<string, readonly string[]>
