-- More of the memory's tables are texts from here on (a heater's body and facts, a room's air); an older memory stays
-- readable. No table changes: the number keeps programs away that cannot read it.
SELECT 1;
