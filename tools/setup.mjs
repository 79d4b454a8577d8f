// Set-up on a fresh clone with Node and npm only: gets a recent Node if the machine's own is too old, installs the packages of the
// lock file if they are missing or out of date; with --build also compiles if a source is newer than the last build.
import { setUp } from './installation.mjs'

await setUp({ builds: process.argv.includes('--build') })
