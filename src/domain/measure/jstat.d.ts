// The part of jstat that is used here; the package ships no types.
declare module 'jstat' {
  const jstat: {
    chisquare: { cdf(x: number, degreesOfFreedom: number): number }
    studentt: { inv(p: number, degreesOfFreedom: number): number }
  }
  export default jstat
}
