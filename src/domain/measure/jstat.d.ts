// The part of jstat that is used here; the package ships no types.
declare module 'jstat' {
  const jstat: {
    normal: { cdf(x: number, mean: number, sd: number): number }
    chisquare: { cdf(x: number, degreesOfFreedom: number): number }
    studentt: { inv(p: number, degreesOfFreedom: number): number }
  }
  export default jstat
}
