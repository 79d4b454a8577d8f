/**
 * Kinds of mechanical parts between the wheel and the dial; those of the fault search too. A part that turns with the gearbox, the transfer case or
 * the final drive starts at a `gearbox-drive`, one that turns with a wheel at a `hub-drive`. An `in-line-unit` is a counter, a reminder or a switch
 * between two cables.
 */
export const PART_KINDS = [
  'gearbox-drive',
  'hub-drive',
  'angle-drive',
  'cable',
  'in-line-unit',
  'adapter',
  'head',
  'other',
] as const

export type PartKind = (typeof PART_KINDS)[number]

/** Causes of drag between parts that turn freely alone. */
export const CAUSES_BETWEEN = [
  'misalignment',
  'tight-bend',
  'bend-at-joint',
  'core-thrust',
  'seat-closes-when-tightened',
  'wrong-direction-angle-drive',
] as const

/** Codes of the causes of drag. */
export const DRAG_CAUSES = [...CAUSES_BETWEEN, 'dry-part', 'kinked-core'] as const

export type DragCauseCode = (typeof DRAG_CAUSES)[number]
