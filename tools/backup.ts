// npm run backup -- FILE: copies the database while the service runs, and verifies the copy.
import { readConfig } from '../src/config.js'
import { backupDatabase } from '../src/db/sqlite/backup.js'
import { noteBackup } from '../src/db/sqlite/health.js'
import { fileOf, runOnFile } from './run-on-file.js'

runOnFile('npm run backup -- FILE', (file) => {
  const databaseFile = fileOf(readConfig(process.env))
  const report = backupDatabase(databaseFile, file)
  try {
    noteBackup(databaseFile, Date.now())
  } catch (error) {
    // The backup is valid even if it cannot be recorded in the database, for example because the disk is full.
    console.error(
      `not noted in ${databaseFile}, so that its metrics show an older backup: ${(error as Error).message}`,
    )
  }
  return [`backup in ${report.file}, verified; its SHA-256 in ${report.file}.sha256`, report]
})
