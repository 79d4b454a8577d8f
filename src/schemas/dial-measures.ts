import { measureIn } from './measure-shapes.js'

const TWO_TURNS_RAD = 4 * Math.PI

export const PointerAngleIn = measureIn('PointerAngleIn', 'angle', {
  min: -TWO_TURNS_RAD,
  max: TWO_TURNS_RAD,
  description:
    'Angle of the pointer, clockwise from straight up, seen from the front of the dial: three o’clock is 90, nine o’clock -90 or 270.',
})
export const DialAngleIn = measureIn('DialAngleIn', 'angle', {
  min: -TWO_TURNS_RAD,
  max: TWO_TURNS_RAD,
  description: 'An angle on the dial, clockwise from straight up, seen from the front.',
  uncertainty: false,
})
export const PointSpeedIn = measureIn('PointSpeedIn', 'speed', {
  min: 0,
  max: 280,
  description: 'True speed on the road, or the speed that the drive simulates on the bench; 0 at rest.',
})
export const ScaleSpeedIn = measureIn('ScaleSpeedIn', 'speed', {
  min: 0,
  max: 280,
  description: 'A speed on the scale.',
  uncertainty: false,
})
export const ScaleRadiusIn = measureIn('ScaleRadiusIn', 'length', {
  min: 0.01,
  max: 0.25,
  description: 'Radius of a scale, from the center of the dial to the outer ends of its marks.',
  uncertainty: false,
})
export const DialDiameterIn = measureIn('DialDiameterIn', 'length', {
  min: 5e-4,
  max: 0.6,
  description: 'A diameter of the dial.',
  uncertainty: false,
})
export const WindowSideIn = measureIn('WindowSideIn', 'length', {
  min: 1e-3,
  max: 0.3,
  description: 'Width or height of a window.',
  uncertainty: false,
})
export const DialOffsetIn = measureIn('DialOffsetIn', 'length', {
  min: -0.25,
  max: 0.25,
  description: 'Distance from the center of the dial.',
  uncertainty: false,
})
