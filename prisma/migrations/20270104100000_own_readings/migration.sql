-- Earlier visits of the vehicle whose sound readings an answer was judged by. The vehicle forgotten, they are forgotten.

-- AlterTable
ALTER TABLE "diagnosis" ADD COLUMN     "own_cases" UUID[] DEFAULT ARRAY[]::UUID[];
