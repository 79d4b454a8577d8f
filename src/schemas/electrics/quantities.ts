import { measureIn } from '../measure-shapes.js'

export const VoltageIn = measureIn('VoltageIn', 'voltage', {
  min: 1e-4,
  max: 1000,
  description: 'A voltage above zero.',
})
export const LevelVoltageIn = measureIn('LevelVoltageIn', 'voltage', {
  min: -100,
  max: 100,
  description: 'A voltage against ground.',
})
export const CurrentIn = measureIn('CurrentIn', 'current', {
  min: 1e-6,
  max: 1000,
  description: 'A current.',
})
export const ResistanceIn = measureIn('ResistanceIn', 'resistance', {
  min: 1,
  max: 1e8,
  description: 'A resistor.',
})
export const SmallResistanceIn = measureIn('SmallResistanceIn', 'resistance', {
  min: 0,
  max: 100,
  description: 'Resistance of a contact, a source or the body.',
})
export const CapacitanceIn = measureIn('CapacitanceIn', 'capacitance', {
  min: 1e-13,
  max: 1e-3,
  description: 'A capacitance.',
})
export const CapacitancePerLengthIn = measureIn('CapacitancePerLengthIn', 'capacitancePerLength', {
  min: 1e-12,
  max: 1e-8,
  description: 'Capacitance of a lead per length, one line against ground.',
})
export const LeadLengthIn = measureIn('LeadLengthIn', 'span', {
  min: 0.001,
  max: 1000,
  description: 'Length of a wire or lead.',
})
export const RiseTimeIn = measureIn('RiseTimeIn', 'time', {
  min: 1e-9,
  max: 1,
  description: 'Rise time from 30 to 70 % of the supply.',
})
export const PowerIn = measureIn('PowerIn', 'power', { min: 0, max: 1000, description: 'A power.' })
export const EnergyIn = measureIn('EnergyIn', 'energy', {
  min: 1e-3,
  max: 1e5,
  description: 'Energy that a part is rated for.',
  uncertainty: false,
})
export const VoltageRatingIn = measureIn('VoltageRatingIn', 'voltage', {
  min: 1e-4,
  max: 1000,
  description: 'Voltage that a part is rated for.',
  uncertainty: false,
})
export const FuseRatingIn = measureIn('FuseRatingIn', 'current', {
  min: 0.01,
  max: 1000,
  description: 'Rating of a fuse.',
  uncertainty: false,
})
export const GapLimitIn = measureIn('GapLimitIn', 'length', {
  min: 0,
  max: 0.1,
  description: 'Limit of an air gap.',
  uncertainty: false,
})
export const SurfaceIn = measureIn('SurfaceIn', 'area', {
  min: 1e-5,
  max: 10,
  description: 'Outside area of a box.',
})
export const WireAreaIn = measureIn('WireAreaIn', 'area', {
  min: 1e-8,
  max: 5e-4,
  description: 'Area of the copper of one conductor.',
})
export const HeatTransferIn = measureIn('HeatTransferIn', 'heatTransfer', {
  min: 0.1,
  max: 1000,
  description: 'Heat given off to the surroundings: 5 to 15 in still air.',
})
export const AmbientIn = measureIn('AmbientIn', 'temperature', {
  min: 173.15,
  max: 573.15,
  description: 'Temperature of surroundings or of a part.',
})
export const TemperatureMarginIn = measureIn('TemperatureMarginIn', 'temperatureDifference', {
  min: 0,
  max: 100,
  description: 'A difference of two temperatures.',
})
export const SmallLengthIn = measureIn('SmallLengthIn', 'length', {
  min: 0,
  max: 0.1,
  description: 'A gap, width, depth, play or run-out.',
})
export const RingLengthIn = measureIn('RingLengthIn', 'length', {
  min: 1e-4,
  max: 2,
  description: 'Diameter or module of a ring.',
})
export const NoiseFrequencyIn = measureIn('NoiseFrequencyIn', 'frequency', {
  min: 0.1,
  max: 1e9,
  description: 'Frequency at which most of the noise lies.',
})
